package check

import "testing"

func TestSeed(t *testing.T) {
	t.Setenv("BALK_SEED", "a tree")
	first, second := Seed(t), Seed(t)
	if first == second || first != seedFrom("a tree", t.Name(), 0) || second != seedFrom("a tree", t.Name(), 1) {
		t.Errorf("seeds %d and %d", first, second)
	}
	if seedFrom("another tree", t.Name(), 0) == first || seedFrom("a tree", "TestOther", 0) == first {
		t.Error("another tree, or another test, draws the same")
	}
	t.Setenv("BALK_SEED", "")
	if first, second := Seed(t), Seed(t); first == second {
		t.Error("two drawn seeds are equal")
	}
}
