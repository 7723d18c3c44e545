"""wear"""
