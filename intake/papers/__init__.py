"""Papers as PDF: labels, the packing list, the field card. They read; they change nothing."""
