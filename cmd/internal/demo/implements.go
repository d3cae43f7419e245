package demo

import (
	"balk/coverage/rig"

	"github.com/pelletier/go-toml/v2"
)

// The implements of the invented farm. The dimensions are made up, but such as
// sets of that width have.
const (
	outlines = `[tractor]            # outline, seen from the rear axle
ahead = 4.2
behind = 0.9
width = 2.5

[body]               # outline of the lifted implement, seen from the middle of the tools
`
	mounted = `# Invented: a mounted sweep implement. Lengths are metres, speeds km/h.
name = "mounted sweep, invented"
width = 6.0
overlap = 0.10
sections = [1.5, 1.5, 1.5, 1.5]

[mount]
antennaAhead = 0.5   # antenna ahead of the tractor's rear axle
hitch = 1.7          # hitch behind the antenna
barBehind = 1.1      # middle of the tools behind the hitch

` + outlines + `ahead = 0.9
behind = 1.2
width = 6.1

[turning]
radius = 5.6         # least radius of the rear axle
speed = 6
reverseSpeed = 4
change = 3           # s for each change of direction
margin = 0.5         # kept from boundary and obstacles

[sweeps]             # seen from the middle of the bar
count = 25
spacing = 0.2375     # between neighbours, across the direction of travel
width = 0.30         # from tip to tip, new
worn = 0.27          # the same when they are changed
angle = 80           # degrees between the wings
beams = [-0.8, 0.0, 0.8]   # m behind the middle of the bar
order = [1, 3, 2]    # the beam of each sweep from the left, again and again
`
	trailed = `# Invented: a trailed sweep implement. Lengths are metres, speeds km/h.
name = "trailed sweep, invented"
width = 4.8
overlap = 0.10

[mount]
trailed = true
antennaAhead = 0.4   # antenna ahead of the tractor's rear axle
hitch = 1.5          # hitch behind the antenna
drawbar = 3.4        # hitch to the implement's axle
barBehind = 0.9      # middle of the tools behind that axle; negative: ahead
maxAngle = 65        # degrees, greatest between tractor and implement
drawbarRadius = 5.8  # least radius of the tractor's rear axle with this implement

` + outlines + `ahead = 1.9
behind = 1.0
width = 4.9
wheels = 2.6         # over the wheels of its axle

[turning]
radius = 5.2
speed = 6
margin = 0.5         # kept from boundary and obstacles
`
)

// implement is what the text of an implement file describes. Its keys are the names of rig.Implement.
func implement(text string) (rig.Implement, error) {
	var im rig.Implement
	if err := toml.Unmarshal([]byte(text), &im); err != nil {
		return rig.Implement{}, err
	}
	return im, im.Validate()
}
