package report

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"testing"

	"github.com/invopop/jsonschema"
)

func TestSchemaIsUpToDate(t *testing.T) {
	made, err := generateSchema()
	if err != nil {
		t.Fatal(err)
	}
	golden(t, filepath.Join("schema", "review-1.json"), made)
}

// generateSchema makes the schema from the document's types.
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
