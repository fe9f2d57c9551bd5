"""The chapters of the report, one module each: `ORDER` says where it stands, `write_chapter` what it says."""
