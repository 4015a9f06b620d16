"""Identity taken out of photographs and volumes before they are kept, with a list of what was taken."""
