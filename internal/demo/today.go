package demo

// finish makes the book of today: the plan of the bench is laid, and what only today asks
// stands on the Day sheet.
func (w *world) finish() {
	w.say("today")
	w.at(7, 30)
	p := got(w.Workshop.PlanLay(w.ctx, "Monday's plan"))
	got(w.Workshop.PlanAccept(w.ctx, p.ID))
}
