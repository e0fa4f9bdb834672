"""Several runs in one recording: where each may begin and end, with the reason in plain words. Proposals only: a person
decides."""
