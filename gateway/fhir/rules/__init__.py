"""What must hold for everything that is filed, beyond what the FHIR models look at. One module per kind of rule."""
