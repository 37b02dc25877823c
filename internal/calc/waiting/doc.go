// Package waiting reckons the line of buyers who wait for a colony: what the log of the
// colonies teaches, by when each place in the line is served, and which ready colony goes
// to whom.
//
// Learn reads the log and leans on the species' own figures while the log is thin. Reckon
// lays the colonies to come over the seasons ahead; Supply.Tail is the exact chance that so
// many are there by a day. Match proposes colonies for the line. Start reading at Learn.
//
//	symbol  meaning                                                    unit
//	b_a     how readily a colony of rest a is split                    splits a month
//	s_m     how the month m alters that                                1 is an ordinary month of the season
//	G, B    chance that a split settles in a good and in a bad season  0 to 1
//	q       chance that a season is bad, for all splits of it at once  0 to 1
//	F(t)    chance that a split which settles has settled after t      log-normal, days
//	l       losses of settled colonies                                 a colony and year
//	c       how far the rates themselves are unknown                   standard deviation over mean
//
// It reads no database and no clock. What the book does not tell it does not guess: a kind
// of bee without figures and without a log gives no splits.
package waiting
