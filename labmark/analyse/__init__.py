"""Works out titres, results, uncertainties and class statistics. Pure: no files, no clock, no randomness."""
