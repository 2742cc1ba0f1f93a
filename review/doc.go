// Package review is the review page on this machine: it serves the charts of a
// folder to a browser, takes a person's decisions and appends them to review.jsonl
// beside each chart. It never edits a chart; hide.Fold lays the decisions over it.
//
// Frame: shapes cross the API in table millimetres; the page turns them into
// pixels of the light pictures. Place in the pipeline: above pipeline, below cmd.
// It must not know how charts are made.
//
// A decision is on the disk (fsync) before it is answered. The record is locked while it
// is open, so that a second program cannot write between. Who may call: see guard.
package review
