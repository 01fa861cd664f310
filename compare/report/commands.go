package report

// Commands are the commands and options that advice names, as a user types them.
// The program sets all of them.
type Commands struct {
	Init    string // starts a results repository
	Compare string // judges two profiles
	Gate    string // judges a change of a results repository
	// Agree judges a change after a person agreed to what is named; nil where there is
	// nobody to ask, as in a history.
	Agree  func(to string) string
	Doubts string // lists what is unsafe about runs
	Reruns string // says how many runs a comparison needs
	// Sheet plans the order of work in so many blocks of so many spells; 0 blocks
	// leave the number open.
	Sheet func(blocks, spells int) string
	// JudgeLook judges the first or second of two planned looks.
	JudgeLook func(look int) string

	RunMinutes, SessionMinutes string // state what a run, and a session before its first run, take
	ChangeOption               string // states the change to be seen
	CommitsOption              string // states how many commits to read
	// Confidence is a confidence in per cent with the options that judge at it;
	// alone, as if a score were the only one.
	Confidence func(percent string, alone bool) string

	// Explain words an error with what to do about it.
	Explain func(error) string
}
