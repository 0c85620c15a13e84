"""The pages of one job on this computer alone, built anew at each change, with places to click. Nothing of it is in a built site."""
