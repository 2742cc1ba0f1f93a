// Package score compares charts and score maps with known truth.
//
// It reads the truth beside an invented or measured capture (truth.json and
// truth_label.png) and a hide.Chart, and says how far apart they are: area,
// outline, backbone, defects found and invented, kinds, and how well the
// probabilities are calibrated. It also judges score maps of close-ups against
// pixel masks. The rules of matching are written in docs/score.md.
//
// Frame: the table frame, millimetres, y up. Place in the pipeline: beside it;
// it sees only finished charts. It must not know how a chart is made: it imports
// no other stage, so that it cannot share a mistake with one.
package score
