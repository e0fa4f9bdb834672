"""What a searcher takes home: a sheet to print, the debrief as one file, the measures as tables."""
