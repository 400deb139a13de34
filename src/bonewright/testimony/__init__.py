"""testimony"""
