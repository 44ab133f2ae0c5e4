package rehearsal

import "testing"

func TestWriteSized(t *testing.T) {
	s, err := WriteSized(t.Context(), t.TempDir(), 480)
	if err != nil {
		t.Fatal(err)
	}
	t.Log(len(s.Truths), s.Cards, s.Unplaced, s.Unread, len(s.Choices))
}
