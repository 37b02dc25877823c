package costing

import "kerfbook/internal/calc/contract"

// Topics lists the calculations of this room.
func Topics() []contract.Topic {
	return []contract.Topic{
		contract.New("costing", "What a job costs, what the buyer pays, and the tax in it", costingExample, Costing),
		contract.New("tax", "Net, tax and gross of one amount", taxExample, Tax),
		contract.New("business-number", "Whether the digits of an Australian Business Number check", businessNumberExample, BusinessNumber),
	}
}

const costingExample = `{
  "lines": [
    {"id": "boards", "kind": "timber", "quantity": 6.4, "unit_cost": "7.85"},
    {"id": "bench", "kind": "labour", "quantity": 2.25, "unit_cost": "45.00"},
    {"id": "screws", "kind": "fittings", "quantity": 36, "unit_cost": "0.085"},
    {"id": "colony", "kind": "colony", "quantity": 1, "unit_cost": "180.00", "price": "350.00"},
    {"id": "delivery", "kind": "delivery", "quantity": 1, "unit_cost": "22.00", "price": "30.00", "tax_pct": 0}
  ],
  "overhead_pct": 12.5,
  "margin_pct": 30,
  "tax_pct": 10,
  "round_to": "0.05"
}`

const taxExample = `{"amount": "385.00", "tax_pct": 10, "includes_tax": true}`

const businessNumberExample = `{"abn": "51 824 753 556"}`
