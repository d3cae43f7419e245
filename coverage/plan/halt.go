package plan

// halt is what stops a search before its end. It is asked between steps, and once it said so it stays so.
type halt struct {
	ask  func() bool // nil: never
	said bool
}

// haltOf begins the time of a search.
func haltOf(o Options) *halt {
	if o.Stop == nil {
		return &halt{}
	}
	return &halt{ask: o.Stop()}
}

func (h *halt) now() bool {
	if !h.said && h.ask != nil {
		h.said = h.ask()
	}
	return h.said
}
