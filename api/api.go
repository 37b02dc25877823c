// Package api holds the contract of the REST face, openapi.yaml, and the types made from
// it. The contract is written by hand and first; after a change to it run
// go generate ./api, and a test holds that the two agree.
package api

import _ "embed"

//go:generate go run github.com/oapi-codegen/oapi-codegen/v2/cmd/oapi-codegen@v2.8.2 -config oapi-codegen.yaml openapi.yaml

// Contract is openapi.yaml as it is served.
//
//go:embed openapi.yaml
var Contract []byte
