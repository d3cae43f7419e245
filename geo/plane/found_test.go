package plane

import "testing"

// Cases that random tests found and shrank: each was wrong once.
func TestArrangeCasesFound(t *testing.T) {
	for _, c := range []struct {
		name     string
		outlines []Outline
	}{
		{"a crossing shared by two polygons, at a narrow place for one of them only", []Outline{
			{Line: []XY{{3, 4}, {13, 1}, {17, 3}}},
			{Line: []XY{{12, 1}, {10, 3}, {8, 1}, {18, 11}}},
		}},
		{"three pairs of edges cross near one another, both lanes", []Outline{
			{Line: []XY{{18, 17}, {5, 15}, {1, 0}, {8, 20}, {16, 7}}, Lane: 1},
			{Line: []XY{{19, 15}, {3, 10}, {12, 16}, {3, 4}}, Lane: 1},
			{Line: []XY{{19, 17}, {9, 9}, {19, 17}, {1, 7}}},
		}},
		{"two triangles cross, one corner much sharper", []Outline{
			{Line: []XY{{14, 8}, {14, 15}, {13, 15}}, Lane: 1},
			{Line: []XY{{14, 11}, {16, 12}, {5, 1}}},
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if err := engineFault(c.outlines); err != nil {
				t.Error(err)
			}
		})
	}
}
