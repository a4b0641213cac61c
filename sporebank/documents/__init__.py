"""Records in, PDF out: the only layer that knows ReportLab and qrcode."""
