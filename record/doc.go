// Package record is the store of what hides were: every chart filed, kept whole
// with its hash and its review, under hide, lot, supplier and article; and what
// follows from many of them: sheets of suppliers, lots and months, and claims.
//
// SQLite by default (one file), PostgreSQL by URL; both pass one contract suite.
// Frame: places are kept in the hide frame (package plane), areas in mm². Place in
// the pipeline: beside the stages, after the chart is made. It must not know how
// charts, pictures or sheets are written (package export), nor how a yield or a grade
// is computed (package yield): the command hands both in.
package record
