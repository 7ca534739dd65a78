package report

import (
	_ "embed"
	"encoding/json"
	"fmt"

	"github.com/invopop/jsonschema"
)

//go:embed schema/review-1.json
var publishedSchema []byte

// Schema is the JSON Schema of the document that JSON writes, as published in
// report/schema.
func Schema() []byte { return append([]byte(nil), publishedSchema...) }

// generateSchema makes the schema from the document's types; a test holds the
// published file to it.
func generateSchema() ([]byte, error) {
	r := jsonschema.Reflector{Anonymous: true, ExpandedStruct: true}
	s := r.Reflect(&Document{})
	s.Title = "cogledger review"
	s.Description = "The review of one or several logged rides. Units are in the names of the keys; what is not known is null."
	data, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		return nil, fmt.Errorf("report: schema: %w", err)
	}
	return append(data, '\n'), nil
}
