"""A vehicle: what a unit is, one operating point, a day, wear, a life, complaints."""
