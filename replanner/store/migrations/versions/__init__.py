"""One file a version; `revision` is the number kept in the table replanner_schema."""
