def main() -> None:
    print("labkit")
