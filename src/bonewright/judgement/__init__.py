"""judgement"""
