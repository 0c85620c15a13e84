"""The owner's permanent record: one bag of files that is whole, can be checked, and opens with what every computer has."""
