// Package pipeline takes capture folders in and brings hide charts out: it
// knows the order of the stages, reads and writes the files, runs many
// captures and takes up a run where it stopped.
//
// Frame: table millimetres, y up. Place in the pipeline: above the stages
// (calibrate, detect, export), below review and the command. It must not know
// flags, terminals or exit statuses; it measures nothing itself but the area's
// uncertainty, which needs all stages.
//
// A capture is one independent job named by the hashes of its inputs and
// settings. Running one twice changes nothing; any number may run at once on
// any machine. The same inputs, settings and program give the same bytes
// whatever the number of cores.
package pipeline
