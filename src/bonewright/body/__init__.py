"""body"""
