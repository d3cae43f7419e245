package job

import (
	"fmt"
	"math"
	"time"

	"balk/coverage/drive"
	"balk/geo"
)

// Frame is what the places of a log are in.
type Frame string

const (
	FrameUnknown    Frame = ""
	FrameMaps       Frame = "maps"       // that of the country's maps, as its reference stations correct to
	FrameSatellites Frame = "satellites" // that of the satellites, through which the ground moves
)

func (f Frame) validate() error {
	switch f {
	case FrameUnknown, FrameMaps, FrameSatellites:
		return nil
	}
	return fmt.Errorf("frame of the log %q: must be %s or %s", string(f), FrameMaps, FrameSatellites)
}

// frame settles how the log may lie off the boundary, or moves it where that is known.
func (r *Report) frame(field geo.Field, tracks []geo.Track) []geo.Track {
	if r.Spec.Work.Frames = (drive.Frames{}); r.Spec.Frame == FrameMaps {
		return tracks
	}
	var day time.Time
	for _, t := range tracks {
		if day = t.Middle(); geo.Dated(day) {
			break
		}
	}
	d, ok := field.Drift(day)
	if !ok || !geo.Dated(day) {
		if r.Spec.Frame == FrameSatellites {
			why := "of the frame of its maps nothing is known"
			if ok {
				why = "the log has no date"
			}
			r.Findings = append(r.Findings, geo.Finding{File: sources(tracks), Lost: true, What: "--frame satellites: not moved, for " + why})
		}
		return tracks
	}
	if r.Spec.Frame == FrameUnknown {
		r.Spec.Work.Frames = drive.Frames{Map: d.Frame, EPSG: d.EPSG, Day: day.Truncate(24 * time.Hour), East: round(d.East), North: round(d.North), Told: field.Frame != ""}
		return tracks
	}
	for i := range tracks {
		tracks[i] = tracks[i].Moved(-d.Lon, -d.Lat)
	}
	r.Findings = append(r.Findings, geo.Finding{File: sources(tracks), What: fmt.Sprintf("moved by %.2f m to the east and %.2f m to the north, from the satellites' frame on %s to that of maps, %s (EPSG:%d), in which the files written are too",
		-d.East, -d.North, day.Format(time.DateOnly), d.Frame, d.EPSG)})
	return tracks
}

// round rounds metres to millimetres, which is all that frames are known to.
func round(m float64) float64 { return math.Round(m*1e3) / 1e3 }
