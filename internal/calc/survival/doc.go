// Package survival says how long colonies lived after a day that counts for all of them,
// such as the handover, from lives that were only partly seen.
//
// A life ends either with a loss or with the last day on which it was seen alive; of what
// came after that nothing is known, and it is counted neither as alive nor as lost. Start
// reading at Survival.
//
//	symbol   meaning                                       unit
//	t_i      days on which colonies were lost              days
//	n_i      seen alive until just before t_i              colonies
//	d_i      lost on t_i                                   colonies
//	S(t)     share alive after t days, prod (1 - d_i/n_i)  0 to 1
//	V(t)     sum d_i / (n_i (n_i - d_i)), Greenwood's      none
//
// It knows no species, season or method: the caller puts alike lives together.
package survival
