"""The app on this computer: pages and a typed API over the workflow. Computes nothing."""
