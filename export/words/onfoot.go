package words

// The cautions for those who kneel on a field: only what applies to them.
const kneeling = "Nobody kneels while a set works, turns or folds on the field: tell the driver, and wait until it stands, lowered, with the engine off; never under a raised implement. " +
	"Mind traffic on the way, wet ground and open drains, fences under power, lines that hang low, and ground that was sprayed lately. Places are off by the receiver's error; a map is no legal survey."

// OnFoot are the cautions for those who are sent to kneel on a field.
func (l Language) OnFoot() string { return l.Word(kneeling) + " " + l.Word(first) }
