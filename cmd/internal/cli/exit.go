package cli

// Exit codes: the one table, shown in help as well.
const (
	done        = 0
	couldNot    = 1
	wrongCall   = 2
	partLost    = 3
	interrupted = 130
)

const exitTable = `Exit codes:
  0    done
  1    could not
  2    wrong call
  3    done, but part of the input was unusable
  130  interrupted`

// stop ends a verb with a code. err may be nil when all has been said.
type stop struct {
	code int
	err  error
}

func (s *stop) Error() string {
	if s.err == nil {
		return ""
	}
	return s.err.Error()
}

func (s *stop) Unwrap() error { return s.err }
