"""Words and pure rules of provenance: lineage, what a scan says, stops over all stages, whom a recall tells."""
