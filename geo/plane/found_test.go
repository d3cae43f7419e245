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
		{"three lines cross within a millimetre, none of them near a vertex", []Outline{
			{Line: []XY{{13, 16}, {9, 8}, {19, 10}, {4, 9}}},
			{Line: []XY{{19, 2}, {5, 11}, {20, 12}, {10, 10}, {14, 18}}},
		}},
		{"a triangle without ground beside a line that crosses it", []Outline{
			{Line: []XY{{12.677349537611008, 1.1334940046072006}, {5.771927759051323, 6.905421778559685}, {0, 0}}},
			{Line: []XY{{13.582168817520142, 6.893815368413925}, {1.2826506197452545, 1.5345381796360016}, {7.432409718632698, 4.214176774024963}}, Lane: 1},
		}},
		{"a spike runs back 15 nm beside itself, along the driving direction", []Outline{
			{Line: []XY{{-1.798624962568283, 12.874973714351654}, {-0.669886589050293, 12.022946894168854}, {-1.2233096659183502, 15.984477266669273}, {-2.352048024535179, 16.836504086852074}}},
			{Line: []XY{{-1.361665427684784, 16.97485986351967}, {-0.23292706906795502, 16.122833028435707}, {-0.37128283083438873, 17.113215625286102}, {0.18214023113250732, 13.151685252785683}, {-0.8082423657178879, 13.013329491019249}}, Lane: 1},
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if err := engineFault(c.outlines); err != nil {
				t.Error(err)
			}
		})
	}
}
