package words

// inTheYard is what a figure of the yard does not see, and how to be safe under a frame.
const inTheYard = "A drawing does not see blunt edges, bent legs, springs that give, stones and uneven ground: kneel down and look at the cut. Work under a raised frame only when it is propped."

// InTheYard is the short form of the cautions where sweeps are looked at and changed.
func (l Language) InTheYard() string { return l.Word(inTheYard) + " " + l.Word(first) }
