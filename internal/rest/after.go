package rest

import (
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/answer"
	"kerfbook/internal/handover"
	"kerfbook/internal/house"
)

func (s *Server) registerAfterRoutes(g *echo.Group) {
	g.GET("/follow-ups", s.handleFollowUpList)
	g.POST("/follow-ups/:id/answer", s.handleFollowUpAnswer)
	g.POST("/handovers/:id/follow-ups", s.handleFollowUpTell)
	g.POST("/handovers/:id/guarantee-claims", s.handleGuaranteeOpen)
	g.GET("/guarantee-claims", s.handleGuaranteeList)
	g.GET("/guarantee-claims/:id", s.handleGuarantee)
	g.POST("/guarantee-claims/:id/decide", s.handleGuaranteeDecide)
	g.GET("/survival", s.handleSurvival)
	g.GET("/after-care", s.handleAfterCare)
	g.PUT("/after-care", s.handleAfterCarePut)
	g.GET("/unfetched-orders", s.handleUnfetchedList)
	g.POST("/orders/:id/fetch-reminders", s.handleFetchReminded)
}

func (s *Server) handleFollowUpList(c echo.Context) error {
	ctx := c.Request().Context()
	set, err := s.House.SettingsGet(ctx)
	if err != nil {
		return err
	}
	list, err := s.Handover.FollowUpsDue(ctx, set.Today(s.DB.Now()))
	if err != nil {
		return err
	}
	out := api.FollowUpList{Items: make([]api.FollowUp, len(list))}
	for i, f := range list {
		out.Items[i] = followUpOf(f)
		out.Items[i].Words = some(answer.FollowUpWords(f, set))
	}
	return reply(c, http.StatusOK, out)
}

func followUpOf(f handover.FollowUp) api.FollowUp {
	return api.FollowUp{ID: f.ID, HandoverID: &f.HandoverID, DueOn: *dayOut(&f.DueOn), Buyer: f.PartyName, Phone: f.PartyPhone, OrderNumber: f.OrderNumber, Answer: f.Answer, Why: some(f.Why), LostOn: dayOut(f.LostOn)}
}

func toldIn(c echo.Context) (handover.Told, error) {
	var in api.FollowUpAnswer
	if err := bind(c, &in); err != nil {
		return handover.Told{}, err
	}
	lost, err := dayIn(in.LostOn, "/lost_on")
	return handover.Told{Answer: string(in.Answer), Why: val(in.Why), LostOn: lost}, err
}

func heardOf(claim *handover.GuaranteeClaim) api.FollowUpHeard {
	if claim == nil {
		return api.FollowUpHeard{}
	}
	return api.FollowUpHeard{ClaimID: &claim.ID}
}

func (s *Server) handleFollowUpAnswer(c echo.Context) error {
	t, err := toldIn(c)
	if err != nil {
		return err
	}
	claim, err := s.Answer.FollowUpAnswer(c.Request().Context(), pathID(c, "id"), t)
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, heardOf(claim))
}

func (s *Server) handleFollowUpTell(c echo.Context) error {
	t, err := toldIn(c)
	if err != nil {
		return err
	}
	claim, err := s.Answer.FollowUpTell(c.Request().Context(), pathID(c, "id"), t)
	if err != nil {
		return err
	}
	return reply(c, http.StatusCreated, heardOf(claim))
}

func (s *Server) claimOf(c echo.Context, g handover.GuaranteeClaim, loc *time.Location) api.GuaranteeClaim {
	out := api.GuaranteeClaim{ID: g.ID, Version: g.Version, HandoverID: g.HandoverID, HandoverNumber: g.Number, Buyer: g.PartyName, About: api.GuaranteeClaimAbout(g.About), HappenedAt: g.HappenedAt, What: g.What,
		GuaranteeUntil: dayOut(g.UntilOn), DaysLate: some(g.DaysLate(loc)), DecidedAt: g.DecidedAt, DecidedBy: some(g.DecidedBy), Reason: some(g.Note)}
	if g.Decision != nil {
		d := api.GuaranteeClaimDecision(*g.Decision)
		out.Decision = &d
	}
	if prices(c) {
		out.CostMinor = g.CostMinor
	}
	return out
}

func (s *Server) handleGuaranteeOpen(c echo.Context) error {
	var in api.GuaranteeClaimNew
	if err := bind(c, &in); err != nil {
		return err
	}
	ctx := c.Request().Context()
	set, err := s.House.SettingsGet(ctx)
	if err != nil {
		return err
	}
	g, err := s.Handover.GuaranteeOpen(ctx, handover.GuaranteeNew{HandoverID: pathID(c, "id"), About: string(val(in.About)), What: in.What, HappenedAt: val(in.HappenedAt)})
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusCreated, g.Version, s.claimOf(c, g, set.Location()))
}

func (s *Server) handleGuaranteeList(c echo.Context) error {
	ctx := c.Request().Context()
	set, err := s.House.SettingsGet(ctx)
	if err != nil {
		return err
	}
	list, err := s.Handover.GuaranteeList(ctx, c.QueryParam("decided") == "true")
	if err != nil {
		return err
	}
	out := api.GuaranteeClaimList{Items: make([]api.GuaranteeClaim, len(list))}
	for i, g := range list {
		out.Items[i] = s.claimOf(c, g, set.Location())
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleGuarantee(c echo.Context) error {
	return s.replyClaim(c, pathID(c, "id"))
}

func (s *Server) replyClaim(c echo.Context, id int64) error {
	ctx := c.Request().Context()
	set, err := s.House.SettingsGet(ctx)
	if err != nil {
		return err
	}
	g, err := s.Answer.GuaranteeFile(ctx, id)
	if err != nil {
		return err
	}
	ids := func(list []house.Photo) []int64 {
		out := make([]int64, len(list))
		for i, p := range list {
			out[i] = p.ID
		}
		return out
	}
	return replyVersion(c, http.StatusOK, g.Claim.Version, api.GuaranteeFile{Claim: s.claimOf(c, g.Claim, set.Location()), ConsumerLaw: answer.ConsumerLaw, Terms: append([]string{}, g.Terms...),
		Handover: handoverOf(g.Handover, g.Heard), PhotosAtHandover: ids(g.Photos), PhotosSince: ids(g.Since), Words: g.Words})
}

func (s *Server) handleGuaranteeDecide(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	var in api.GuaranteeDecision
	if err := bind(c, &in); err != nil {
		return err
	}
	id := pathID(c, "id")
	if err := s.Handover.GuaranteeDecide(c.Request().Context(), id, version, string(in.Decision), val(in.CostMinor), in.Reason); err != nil {
		return err
	}
	return s.replyClaim(c, id)
}

func (s *Server) handleSurvival(c echo.Context) error {
	by := c.QueryParam("by")
	if by == "" {
		by = "species"
	}
	var days []float64
	if d := queryInt(c, "days", 0); d > 0 {
		days = []float64{float64(d)}
	}
	list, err := s.Handover.SurvivalOf(c.Request().Context(), by, days...)
	if err != nil {
		return err
	}
	out := api.SurvivalList{Items: make([]api.SurvivalGroup, len(list))}
	for i, g := range list {
		o := api.SurvivalGroup{Name: g.Name, HandedOver: g.Handed, Alive: g.Alive, Lost: g.Lost, Unheard: g.Unheard, After: []api.SurvivalPoint{}}
		for _, p := range g.At {
			o.After = append(o.After, api.SurvivalPoint{Days: float32(p.Days), HeardSoLong: p.AtRisk, Lost: p.Lost, Alive: float32(p.Alive), Low: float32(p.Low), High: float32(p.High), Seen: p.Seen})
		}
		out.Items[i] = o
	}
	return reply(c, http.StatusOK, out)
}

func afterOf(a house.AfterCare) api.AfterCare {
	return api.AfterCare{GuaranteeBoxDays: a.GuaranteeBoxDays, GuaranteeColonyDays: a.GuaranteeColonyDays, FetchDays: append([]int32{}, a.FetchDays...), FetchTerms: a.FetchTerms}
}

func (s *Server) handleAfterCare(c echo.Context) error {
	a, err := s.House.AfterCareGet(c.Request().Context())
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, a.Version, afterOf(a))
}

func (s *Server) handleAfterCarePut(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	var in api.AfterCare
	if err := bind(c, &in); err != nil {
		return err
	}
	a, err := s.House.AfterCarePut(c.Request().Context(), house.AfterCare{Version: version, GuaranteeBoxDays: in.GuaranteeBoxDays, GuaranteeColonyDays: in.GuaranteeColonyDays, FetchDays: in.FetchDays, FetchTerms: in.FetchTerms})
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, a.Version, afterOf(a))
}

func unfetchedOf(u answer.Unfetched) api.Unfetched {
	out := api.Unfetched{OrderID: u.OrderID, OrderNumber: u.Number, Buyer: u.Who, Phone: u.Phone, Email: u.Email, Pieces: u.Pieces, ReadyOn: *dayOut(&u.ReadyOn), Days: u.Days, Last: u.Last, NextOn: dayOut(u.Next), Words: u.Words, RemindedAt: []time.Time{}}
	if u.Due != nil {
		due := int(*u.Due)
		out.DueAfterDays = &due
	}
	for _, t := range u.Told {
		out.RemindedAt = append(out.RemindedAt, t.ToldAt)
	}
	return out
}

func (s *Server) handleUnfetchedList(c echo.Context) error {
	list, err := s.Answer.UnfetchedList(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.UnfetchedList{Items: make([]api.Unfetched, len(list))}
	for i, u := range list {
		out.Items[i] = unfetchedOf(u)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleFetchReminded(c echo.Context) error {
	u, err := s.Answer.FetchTold(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return reply(c, http.StatusCreated, unfetchedOf(u))
}
