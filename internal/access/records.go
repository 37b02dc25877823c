package access

// recordAreas says in which area the records of a table are seen, for pages and routes
// that work on any record: its changes, its photos.
var recordAreas = map[string]Area{
	"workshop": Settings, "second_hands": Settings, "wording": Settings, "account": Settings, "buyer_class": Settings, "tax_registration": Settings,
	"party": Enquiries, "contact": Enquiries, "site": Enquiries, "enquiry": Enquiries, "quote": Enquiries,
	"sale_order": Orders, "service": Orders, "order_line": Orders, "order_unit": Orders,
	"timber_species": Timber, "climate": Timber, "log": Timber, "pack": Timber, "board_lot": Timber, "item": Timber, "supplier": Timber, "purchase": Prices, "standing_cost": Books,
	"box_model": Bench, "limited_thing": Bench, "build": Bench, "cutting": Bench, "box": Bench,
	"colony": Bees, "keeping": Bees, "host_tree": Bees, "permit": Bees,
	"run": Runs, "handover": Runs, "guarantee_claim": Runs,
}

// AreaOf gives the area in which the records of table are seen; false for a table whose
// records have no page of their own.
func AreaOf(table string) (Area, bool) {
	a, ok := recordAreas[table]
	return a, ok
}
