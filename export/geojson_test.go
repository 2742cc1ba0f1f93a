package export

import (
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// Against gdal (Debian 12, 3.6.2): areas as ogrinfo reads them, inner rings
// taken off.
func TestGeoJSONAreasReadByGDAL(t *testing.T) {
	c := sampleChart(`=A "1"`)
	path := written(t, "a.geojson", c, WriteGeoJSON)
	got := ogrAreas(t, path, `SELECT id, OGR_GEOM_AREA FROM a WHERE OGR_GEOM_AREA > 0`, "id")
	assertArea(t, got["outline"], hide.Shape{c.Outline})
	assertArea(t, got["zone-butt"], c.Zones[0].Geometry)
	for _, d := range c.Defects {
		assertArea(t, got["defect-"+number(float64(d.ID))], d.Geometry)
	}
}

func TestGeoJSONFollowsRFC7946(t *testing.T) {
	for _, name := range hostileNames() {
		c := sampleChart(name)
		c.Outline.Outer = reversed(c.Outline.Outer) // turned back when written
		data, err := os.ReadFile(written(t, "a.geojson", c, WriteGeoJSON))
		require.NoError(t, err)
		var fc struct {
			Type   string
			Planar map[string]string `json:"planar_frame"`
			CRS    any               `json:"crs"`
			BBox   [4]float64
			Feats  []struct {
				Type, ID   string
				Properties map[string]any
				Geometry   json.RawMessage
			} `json:"features"`
		}
		require.NoError(t, json.Unmarshal(data, &fc))
		assert.Equal(t, "FeatureCollection", fc.Type)
		assert.Equal(t, "mm", fc.Planar["unit"], "a foreign member says that these are millimetres (6.1)")
		assert.Nil(t, fc.CRS, "removed by RFC 7946")
		require.Len(t, fc.Feats, 1+1+1+12)
		assert.Equal(t, name, fc.Feats[0].Properties["hide"])
		for _, f := range fc.Feats {
			if f.ID == "backbone" {
				continue
			}
			var s hide.Shape
			require.NoError(t, json.Unmarshal(f.Geometry, &s))
			for _, p := range s {
				assert.Positive(t, float64(p.Outer.SignedArea()), "outer rings run counter-clockwise (3.1.6)")
				for _, h := range p.Holes {
					assert.Negative(t, float64(h.SignedArea()), "holes clockwise (3.1.6)")
				}
			}
		}
	}
}
