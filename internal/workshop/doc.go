// Package workshop keeps what is made at the bench: box models and the fits that let
// their sections interchange, builds with their operations and the hours spent, the
// boxes with their serials for life, sections and parts on the shelf, and the plan of
// the bench.
//
// A model's revision never changes; a build freezes what it needs from one. Timber and
// fittings are put aside through package claims only, and move through package timber
// only. Calculations (parts, cutting, planning) are those of the calc rooms.
//
// It names order units and parties by id and knows nothing of sales or bees. Start
// reading at [Room], [Room.BuildMake], [Room.BuildFinish] and [Room.PlanLay].
package workshop
