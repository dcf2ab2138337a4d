"""What a person looks at: figures, sentences, tables, the documents of ``--json``, the map."""
