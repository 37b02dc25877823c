// Package claims is the one place where anything is put aside for anybody: boards of a
// lot, fittings, sections and parts on the shelf, boards of a pack still drying, a box,
// a colony, for one order unit or one build.
//
// There are two strengths. What is meant is a plan, may rest on a pack that is still
// drying, and is laid again freely. What is put aside lies in the corner with a name on
// it. Neither goes beyond the book: [Put] refuses and says what is short. A fact that
// contradicts the book is never refused: [BreakForFact] ends the claims that no longer
// hold, latest promise first, and [BrokenList] shows them until their claimant is done.
//
// The package never moves stock, and knows nothing of orders, builds or bees beyond
// their ids.
//
// # The order of row locks
//
// Everybody who needs several locks takes them in this order, each kind by rising id:
//
//	sale_order, order_unit, build, board_lot, item, shelf_lot, pack, box, colony, claim, counter
//
// [Lock] does so for the things that can be claimed. PostgreSQL ends a deadlock that
// comes about all the same, and the transaction is run again.
package claims
