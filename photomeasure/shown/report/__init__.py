"""Reports as PDF: of a measurement (`measurement.measurement_pdf`) and of a plan (`plan.plan_pdf`)."""
