#!/usr/bin/env bash
# Installs the Debian packages that hidechart needs. Safe to run twice; when
# nothing is missing it only asks dpkg and ends.
#
#   scripts/install.sh         what the build and the demo need
#   scripts/install.sh test    also the reference programs the tests compare with
set -euo pipefail

packages=(
  ca-certificates git make pkg-config g++
  libopencv-dev   # pictures (through gocv)
  libapriltag-dev # tags on the table
  libgeos-dev     # polygon operations (through simplefeatures)
)
case "${1:-build}" in
build) ;;
test)
  packages+=(
    python3-ezdxf                                # audits our DXF
    gdal-bin                                     # reads DXF and GeoJSON back
    python3-opencv python3-skimage python3-scipy python3-pil # reference results
    imagemagick librsvg2-bin poppler-utils       # draw SVG and PDF
    chromium fonts-dejavu-core                   # opens the review page
    python3-statsmodels                          # reference statistics
    python3-openpyxl                             # reads XLSX back
    qpdf python3-pikepdf python3-fonttools       # read and check PDF
    postgresql                                   # the record's other database, on a cluster of the tests' own
  )
  # node from another source brings its own npm, which Debian's would clash with
  command -v npm >/dev/null || packages+=(nodejs npm) # build the review page
  ;;
*)
  echo "usage: scripts/install.sh [build|test]" >&2
  exit 2
  ;;
esac

missing=()
for p in "${packages[@]}"; do
  state=$(dpkg-query -W -f '${db:Status-Status}' "$p" 2>/dev/null || true)
  [ "$state" = installed ] || missing+=("$p")
done

if ! command -v go >/dev/null; then
  echo "install: no Go in PATH; hidechart needs the version named in go.mod or later (https://go.dev/dl/)" >&2
  exit 1
fi
[ ${#missing[@]} -eq 0 ] && exit 0

as_root=()
if [ "$(id -u)" -ne 0 ]; then
  command -v sudo >/dev/null || {
    echo "install: missing ${missing[*]}; run as root, or install sudo" >&2
    exit 1
  }
  as_root=(sudo)
fi
echo "install: ${missing[*]}" >&2
apt() {
  "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive \
    apt-get -q -y -o DPkg::Lock::Timeout=300 -o Acquire::Retries=3 "$@" >&2
}
apt update
apt install --no-install-recommends "${missing[@]}"
