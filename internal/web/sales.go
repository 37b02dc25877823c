package web

// registerSalesPages are the pages of the sales room, by area in the files sales_*.go.
func (s *Server) registerSalesPages(r *routes) {
	s.registerAskPages(r)
	s.registerEnquiryPages(r)
	s.registerPartyPages(r)
	s.registerPricePages(r)
	s.registerBooksPages(r)
	s.registerQuotePages(r)
	s.registerShelfPages(r)
	s.registerOrderPages(r)
}
