package detect

import (
	_ "embed"
	"sync"
)

// harmless is the class of candidates that are no flaws.
const harmless = "harmless"

//go:embed sorting.model
var sortingFile []byte

// sortingModel reads the model that ships with the program once. It is written
// by `make train` from rendered scenes.
var sortingModel = sync.OnceValues(func() (*boostModel, error) { return loadBoost(sortingFile) })
