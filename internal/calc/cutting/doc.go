// Package cutting lays the parts of a day on the boards of the rack, one board
// size (species, width, thickness) a call, and says how near the plan is to the
// best there can be.
//
// It minimises, in this order: the cost where boards have one, otherwise the
// total length of the boards used (the number of boards where all are alike);
// then the number of boards; then it uses up offcuts, oldest first; then it
// prefers few different layouts, and last one long offcut worth keeping. The
// first of these comes with a true lower bound; the others are done with
// reasonable effort and carry no proof. Where boards run short, "as much as can be" is the
// greatest length of parts, then the most parts; Out.LeastUnplacedMM says what no plan
// leaves less of.
//
// How it works: a bound over whole boards (cover.go); boards of one total price
// are chosen and packed, the waste being gathered in few places (choose.go,
// pack.go, target.go); a linear program over patterns, solved by adding patterns
// as they are needed, gives a sharper bound (lp.go, knapsack.go, dual.go) and is
// branched on (branch.go); where few patterns can still matter, because boards hold few
// parts each, the whole-number program over all of these is settled by cutting planes and
// branching (columns.go, tableau.go, planes.go, whole.go); prices to which few choices of boards come are ruled
// out one by one (ruleout.go).
//
// What it refuses to do: it reads a clock for nothing but the caller's limit,
// throws no dice but a fixed sequence of them, and returns no plan that Check has
// not passed.
//
// Symbols, all lengths inside the room being whole numbers of one unit:
//
//	symbol  meaning                                            unit
//	l_i     length of part i                                   mm
//	k       kerf                                               mm
//	w_i     size of part i = l_i + k                           unit
//	L_b     length of board b                                  mm
//	t       trim at each end                                   mm
//	W_b     room of board b = L_b - 2t + k                     unit
//	d_i     how many of part i are wanted                      pieces
//	a_b     how many boards b there are                        boards
//	c_b     price of board b: cost, length, or 1               cost, mm, boards
//
// n parts fit on a board when the sum of l_i plus n-1 kerfs is at most L_b - 2t,
// which is the same as: the sum of w_i is at most W_b. What is left over after
// one more kerf is the offcut.
//
// Start reading at Plan, then model.go (the numbers), solve.go (the search) and
// check.go (the separate judge of every plan).
package cutting
