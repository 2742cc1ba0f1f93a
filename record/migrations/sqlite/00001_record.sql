-- +goose Up
CREATE TABLE suppliers (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE);
CREATE TABLE articles (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE);
CREATE TABLE lots (
    id INTEGER PRIMARY KEY,
    supplier_id INTEGER NOT NULL REFERENCES suppliers (id),
    name TEXT NOT NULL,
    price DOUBLE PRECISION NOT NULL DEFAULT 0, -- per m2; 0: not known
    currency TEXT NOT NULL DEFAULT '',
    promised_rule TEXT NOT NULL DEFAULT '',
    promised_grade TEXT NOT NULL DEFAULT '',
    note TEXT NOT NULL DEFAULT '',
    UNIQUE (supplier_id, name)
);
CREATE TABLE hides (
    id INTEGER PRIMARY KEY,
    lot_id INTEGER NOT NULL REFERENCES lots (id),
    article_id INTEGER NOT NULL REFERENCES articles (id),
    name TEXT NOT NULL,
    form TEXT NOT NULL, -- whole, side
    whole_id INTEGER REFERENCES hides (id), -- the hide that a side was cut from
    first_filed TEXT NOT NULL,
    month TEXT NOT NULL, -- of first_filed
    chart_id BIGINT, -- the one that counts
    review_id BIGINT, -- the one that counts
    area_mm2 BIGINT NOT NULL DEFAULT 0, -- with the review
    u_mm2 BIGINT NOT NULL DEFAULT 0,
    stamp TEXT NOT NULL DEFAULT '',
    stamped_mm2 BIGINT NOT NULL DEFAULT 0, -- 0: none
    substance_mm DOUBLE PRECISION NOT NULL DEFAULT 0, -- mean; 0: none
    temper TEXT NOT NULL DEFAULT '',
    candidates INTEGER NOT NULL DEFAULT 0,
    confirmed INTEGER NOT NULL DEFAULT 0,
    rejected INTEGER NOT NULL DEFAULT 0,
    added INTEGER NOT NULL DEFAULT 0,
    counted INTEGER NOT NULL DEFAULT 0, -- flaws that count
    reviewed INTEGER NOT NULL DEFAULT 0, -- 1: a review was filed
    shape TEXT NOT NULL DEFAULT '', -- half widths, see halfWidths
    UNIQUE (lot_id, name)
);
CREATE TABLE captures (
    id INTEGER PRIMARY KEY,
    hide_id INTEGER NOT NULL REFERENCES hides (id),
    photographs TEXT NOT NULL UNIQUE, -- hash over the photographs' hashes
    rig_sha256 TEXT NOT NULL,
    temperature_c DOUBLE PRECISION,
    humidity_percent DOUBLE PRECISION,
    note TEXT NOT NULL
);
CREATE TABLE images (
    capture_id INTEGER NOT NULL REFERENCES captures (id),
    n INTEGER NOT NULL,
    light TEXT NOT NULL,
    tile INTEGER NOT NULL,
    sha256 TEXT NOT NULL,
    width_px INTEGER NOT NULL,
    height_px INTEGER NOT NULL,
    PRIMARY KEY (capture_id, n)
);
CREATE TABLE charts (
    id INTEGER PRIMARY KEY,
    hide_id INTEGER NOT NULL REFERENCES hides (id),
    capture_id INTEGER NOT NULL REFERENCES captures (id),
    sha256 TEXT NOT NULL UNIQUE,
    data BLOB NOT NULL, -- the file's bytes, gzip
    filed_at TEXT NOT NULL,
    superseded_by INTEGER REFERENCES charts (id)
);
CREATE TABLE reviews (
    id INTEGER PRIMARY KEY,
    chart_id INTEGER NOT NULL REFERENCES charts (id),
    sha256 TEXT NOT NULL,
    data BLOB NOT NULL, -- the file's bytes, gzip
    filed_at TEXT NOT NULL,
    UNIQUE (chart_id, sha256)
);
CREATE TABLE readings (
    hide_id INTEGER NOT NULL REFERENCES hides (id),
    n INTEGER NOT NULL,
    mm DOUBLE PRECISION NOT NULL,
    place TEXT NOT NULL,
    PRIMARY KEY (hide_id, n)
);
CREATE TABLE defects (
    hide_id INTEGER NOT NULL REFERENCES hides (id),
    n INTEGER NOT NULL,
    kind TEXT NOT NULL,
    zone TEXT NOT NULL,
    status TEXT NOT NULL,
    probability DOUBLE PRECISION NOT NULL,
    open INTEGER NOT NULL,
    counts INTEGER NOT NULL,
    area_mm2 BIGINT NOT NULL,
    length_mm DOUBLE PRECISION NOT NULL,
    width_mm DOUBLE PRECISION NOT NULL,
    placed INTEGER NOT NULL, -- 1: u and v are known
    u DOUBLE PRECISION NOT NULL,
    v DOUBLE PRECISION NOT NULL,
    PRIMARY KEY (hide_id, n)
) WITHOUT ROWID;
CREATE TABLE zone_areas (
    hide_id INTEGER NOT NULL REFERENCES hides (id),
    zone TEXT NOT NULL,
    cm2 BIGINT NOT NULL,
    PRIMARY KEY (hide_id, zone)
) WITHOUT ROWID;
CREATE TABLE yields (
    hide_id INTEGER NOT NULL REFERENCES hides (id),
    look_sha256 TEXT NOT NULL,
    look TEXT NOT NULL,
    share DOUBLE PRECISION NOT NULL,
    p10 DOUBLE PRECISION NOT NULL,
    p90 DOUBLE PRECISION NOT NULL,
    PRIMARY KEY (hide_id, look_sha256)
) WITHOUT ROWID;
CREATE TABLE cuts (
    id INTEGER PRIMARY KEY,
    hide_id INTEGER NOT NULL REFERENCES hides (id),
    piece TEXT NOT NULL,
    pieces INTEGER NOT NULL,
    noted_at TEXT NOT NULL
);
CREATE TABLE certificates (
    sha256 TEXT PRIMARY KEY,
    rig_sha256 TEXT NOT NULL,
    day TEXT NOT NULL,
    data BLOB NOT NULL
);
CREATE TABLE claims (
    sha256 TEXT PRIMARY KEY, -- of the PDF
    lot_id INTEGER NOT NULL REFERENCES lots (id),
    made_at TEXT NOT NULL,
    name TEXT NOT NULL
);
-- Sums kept up to date by each filing, so that a sheet reads hundreds of rows
-- and not millions; `records check` counts them again.
CREATE TABLE zone_sums (
    lot_id INTEGER NOT NULL, article_id INTEGER NOT NULL, month TEXT NOT NULL,
    zone TEXT NOT NULL, -- '*': the hide
    hides BIGINT NOT NULL, cm2 BIGINT NOT NULL, cm2_sq BIGINT NOT NULL,
    PRIMARY KEY (lot_id, article_id, month, zone)
) WITHOUT ROWID;
CREATE TABLE kind_sums (
    lot_id INTEGER NOT NULL, article_id INTEGER NOT NULL, month TEXT NOT NULL,
    kind TEXT NOT NULL, zone TEXT NOT NULL, -- '*': all
    hides BIGINT NOT NULL, n BIGINT NOT NULL, n_sq BIGINT NOT NULL, n_cm2 BIGINT NOT NULL, area_mm2 BIGINT NOT NULL,
    PRIMARY KEY (lot_id, article_id, month, kind, zone)
) WITHOUT ROWID;
CREATE TABLE place_sums (
    supplier_id INTEGER NOT NULL, article_id INTEGER NOT NULL, form TEXT NOT NULL,
    kind TEXT NOT NULL, cell INTEGER NOT NULL,
    hides BIGINT NOT NULL, marks BIGINT NOT NULL,
    PRIMARY KEY (supplier_id, article_id, form, kind, cell)
) WITHOUT ROWID;
CREATE TABLE times_sums (
    supplier_id INTEGER NOT NULL, article_id INTEGER NOT NULL, form TEXT NOT NULL,
    kind TEXT NOT NULL, marks INTEGER NOT NULL, lean INTEGER NOT NULL, -- -1 more on the left, 1 on the right
    hides BIGINT NOT NULL,
    PRIMARY KEY (supplier_id, article_id, form, kind, marks, lean)
) WITHOUT ROWID;
CREATE TABLE shape_sums (
    supplier_id INTEGER NOT NULL, article_id INTEGER NOT NULL, form TEXT NOT NULL,
    step INTEGER NOT NULL,
    hides BIGINT NOT NULL, left_sum BIGINT NOT NULL, right_sum BIGINT NOT NULL, -- 1e-4 of the length
    PRIMARY KEY (supplier_id, article_id, form, step)
) WITHOUT ROWID;
CREATE INDEX hides_by_article ON hides (article_id);
CREATE INDEX hides_by_month ON hides (month);
CREATE INDEX captures_by_hide ON captures (hide_id);
CREATE INDEX charts_by_hide ON charts (hide_id);
CREATE INDEX charts_by_capture ON charts (capture_id);
CREATE INDEX cuts_by_hide ON cuts (hide_id);
CREATE INDEX claims_by_lot ON claims (lot_id);
