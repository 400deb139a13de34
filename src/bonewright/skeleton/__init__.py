"""skeleton"""
