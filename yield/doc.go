// Package yield answers what can be cut from a hide: the cuttable area under a
// look and its range, the grade by a rule, the substance, the pattern pieces and
// where each of them can go.
//
// Frame: table millimetres, y up; pieces are in a frame of their own, y up, the
// reference point at its origin. Place: a stage beside detect and export, above
// plane. It takes charts and returns figures and regions; it must not know
// photographs, OpenCV, the store or how a result is drawn.
//
// All of it is an estimate to compare hides and to plan with. Knives and presses
// are set by what the cutter sees on the leather; leather that carries load or
// protects is judged by a trained person under local rules.
package yield
