package report

import _ "embed"

//go:embed schema/review-1.json
var publishedSchema []byte

// Schema is the JSON Schema of the document that JSON writes, as published in
// report/schema. A test generates it from the types of the document and holds
// the published file to it.
func Schema() []byte { return append([]byte(nil), publishedSchema...) }
