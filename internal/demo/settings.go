package demo

import (
	"github.com/shopspring/decimal"

	"kerfbook/internal/house"
)

// The invented maker, and who helps on Tuesdays.
const (
	MakerName  = "Wren Dallimore"
	HelperName = "Pasco Merrigold"
)

// Settings are those of the invented workshop.
func Settings() house.Settings {
	s := house.Standard()
	s.Name, s.MakerName = "Saddle Road Hives", MakerName
	s.Phone, s.Email = "07 5550 0142", "wren@saddleroad.example"
	s.Address, s.Town, s.Region, s.Postcode, s.Country = "14 Saddle Road", "Corrabin", "QLD", "4599", "AU"
	lat, lon := -26.4312, 152.6178
	s.Latitude, s.Longitude, s.TimeZone = &lat, &lon, "Australia/Brisbane"
	s.BusinessNumber = "10 000 000 000" // passes the check rule and is made up of noughts, so that it is nobody's
	s.OverheadPct, s.MarginPct, s.HourCostMinor = decimal.NewFromInt(12), decimal.NewFromInt(25), 4200
	s.Guarantee = "Joints and roof are guaranteed for two years.\nA colony that dies within six weeks is replaced once, if it stood as the sheet says."
	s.WaysToPay = "Bank transfer: BSB 000-000, account 1234 5678, Saddle Road Hives, with the number of this paper.\nCash: on handover."
	s.NotIncluded = "The post or bracket it stands on, unless it is a line of its own.\nFinding a new place if the first does not suit the bees."
	s.CouldDelay = "A wet summer: boards dry more slowly.\nA cold spring: splits settle later."
	s.Terms = "The deposit holds your place in the line.\nThe box is yours when it is paid."
	return s
}
