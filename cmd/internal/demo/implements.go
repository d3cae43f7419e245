package demo

// The implements of the invented farm. The dimensions are made up, but such as
// sets of that width have.
const (
	mounted = `# Invented: a mounted sweep implement. Lengths are metres, speeds km/h.
name = "mounted sweep, invented"
width = 5.6
overlap = 0.10
sections = [1.4, 1.4, 1.4, 1.4]

[mount]
antennaAhead = 0.4   # antenna ahead of the tractor's rear axle
antennaUp = 2.9
hitch = 1.5          # hitch behind the antenna
barBehind = 1.0      # middle of the tools behind the hitch

[tractor]            # outline, seen from the rear axle
ahead = 4.3
behind = 0.9
width = 2.5

[body]               # outline of the lifted implement, seen from the middle of the tools
ahead = 0.8
behind = 1.1
width = 5.7

[turning]
radius = 5.5         # least radius of the rear axle
speed = 6
reverseSpeed = 4
change = 3           # s for each change of direction
margin = 0.5         # kept from boundary and obstacles
`
	trailed = `# Invented: a trailed sweep implement. Lengths are metres, speeds km/h.
name = "trailed sweep, invented"
width = 5.0
overlap = 0.10

[mount]
trailed = true
antennaAhead = 0.4   # antenna ahead of the tractor's rear axle
antennaUp = 2.9
hitch = 1.4          # hitch behind the antenna
drawbar = 4.2        # hitch to the implement's axle
barBehind = 1.3      # middle of the tools behind that axle; negative: ahead
maxAngle = 65        # degrees, greatest between tractor and implement
drawbarRadius = 6.5  # least radius of the tractor's rear axle with this implement

[tractor]            # outline, seen from the rear axle
ahead = 4.3
behind = 0.9
width = 2.5

[body]               # outline of the lifted implement, seen from the middle of the tools
ahead = 2.2
behind = 1.0
width = 5.1
wheels = 2.8         # over the wheels of its axle

[turning]
radius = 5.5
speed = 6
margin = 0.5         # kept from boundary and obstacles
`
)
