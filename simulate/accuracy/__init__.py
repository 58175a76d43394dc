"""How far an answer stands from that of an endlessly fine grid."""
