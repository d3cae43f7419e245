package words

// Caution is one of the dangers that everybody is told of who is told where to drive.
type Caution struct{ Head, Text string }

// cautions are all of them, at length. What they must name is written in DESIGN, section 6.
var cautions = []Caution{
	{"Overhead lines", "Keep clear when driving under them and when folding; know the height of the set folded and while it folds."},
	{"Slopes", "Mind rollover, above all with the implement raised, across the slope and in turns downhill."},
	{"Wet ground and drains", "Stay off ground that does not bear; drains, culverts and soft headlands may not be on the map."},
	{"Loads", "Keep to the allowed drawbar and axle loads, tyres and ballast, on the road too."},
	{"Drawbar", "Reversing can fold the set about its drawbar; get out and look, and keep to the radius the set may turn."},
	{"Road", "Mind width, height, lights and permits on the way, and folding before the road."},
	{"Bystanders", "Nobody near the set while it works, turns, folds or is coupled; watch for walkers and children at field edges."},
	{"Buried services", "Ask about cables, pipes and gas before working deeper than usual."},
	{"Map", "A map from a receiver is no legal survey; boundaries, obstacles and strips may lie off by its error."},
	{"What comes first", "Local rules, the machine's manual and licensed practice come before this sheet."},
}

// The short form, in sentences: what it is about, the dangers, and what comes first.
const (
	ofLog  = "Map and areas are no legal survey."
	ofPlan = "A plan is no legal survey: look at the ground first. Slopes, soft spots, ruts and drains are not in the data; widths and lengths are those written in the machine's description."
	watch  = "Before driving there watch overhead lines and folding, slopes and rollover, wet ground and drains, drawbar and axle loads, " +
		"folding when reversing, road width and permits, bystanders, buried services."
	first = "Local rules, the machine's manual and licensed practice come first."
)

// Cautions are all of them, at length.
func (l Language) Cautions() []Caution {
	out := make([]Caution, len(cautions))
	for i, c := range cautions {
		out[i] = Caution{l.Word(c.Head), l.Word(c.Text)}
	}
	return out
}

// AfterWork is the short form of the cautions where a log tells where to work again.
func (l Language) AfterWork() string { return l.Word(ofLog) + " " + l.dangers() }

// Demand is what a drying demand does not say.
func (l Language) Demand() string {
	return l.Word("The demand is that of the air on well-watered grass (FAO-56): it does not say that ground or weeds dried.")
}

// BeforeWork is the short form of the cautions where a plan or a turn tells where to drive.
func (l Language) BeforeWork() string { return l.Word(ofPlan) + " " + l.dangers() }

func (l Language) dangers() string { return l.Word(watch) + " " + l.Word(first) }
