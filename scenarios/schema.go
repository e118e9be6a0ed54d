package scenarios

import _ "embed"

// Schema is the JSON Schema (draft 2020-12) of a scenario, made from what the boxes declare: an editor that is given it
// completes keys, shows what each is and marks what is wrong as one types. Decode says more: the schema cannot hold one
// key against another.
//
//go:embed schema.json
var Schema string

// KeysPage documents every key, made from the same declarations.
//
//go:embed KEYS.md
var KeysPage string
