// Package mail keeps the queue of mail that goes out with a paper: written down in the
// database, sent through the workshop's mail server, tried again while the server is away,
// and never sent twice. What became of each stands with the paper's record.
//
// A mail is leased before it is sent. When the program stops in mid-sending, or the server
// is silent after it was given the whole mail, nobody knows whether it went: it is then
// given up with those words, and a person decides. Start at Room.
package mail
