// Command hidechart turns photographs of hides into measured hide charts.
//
// Only this package knows flags, settings from files and the environment,
// terminals, signals and exit statuses; it measures nothing. Progress and log
// go to standard error, results to files, and with --json to standard output.
package main
