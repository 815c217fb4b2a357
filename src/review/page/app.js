{{token}}
