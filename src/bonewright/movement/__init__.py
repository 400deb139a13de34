"""movement"""
