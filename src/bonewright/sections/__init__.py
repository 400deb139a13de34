"""sections"""
