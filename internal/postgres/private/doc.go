// Package private runs a PostgreSQL server of the program's own in a data folder, for
// those who have none: reachable through a socket only, started and stopped with the
// program, restarted when it dies, ended by the kernel when the program is killed
// (Linux). It never touches a server it did not make.
//
// In the folder: lock (held while in use), data (the cluster), run (the socket),
// server.log, and npm when the binaries had to be fetched. Start reading at [Start].
package private
