"""relatives"""
