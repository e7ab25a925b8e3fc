using System.Globalization;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Sheets;

/// <summary>Short texts that several sheets share.</summary>
internal static class SheetWords
{
    private static readonly string[] Numbers = ["one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];

    /// <summary>A rehearsal letter: A to Z, then AA to AZ and so on.</summary>
    /// <param name="index">From 0.</param>
    public static string Letter(int index) =>
        (index >= 26 ? Letter((index / 26) - 1) : string.Empty) + (char)('A' + (index % 26));

    /// <summary>"three"; from thirteen on in figures.</summary>
    public static string Number(int number) => number <= Numbers.Length ? Numbers[number - 1] : number.ToString(CultureInfo.InvariantCulture);

    /// <summary>A tempo of a length, rounded to a whole number or one decimal: "eighth = 260".</summary>
    public static string Tempo(Tempo tempo, Span beat, string name) =>
        $"{name} = {tempo.PerMinute(beat).ToDouble().ToString(tempo.PerMinute(beat).ToDouble() >= 100 ? "0" : "0.#", CultureInfo.InvariantCulture)}";

    /// <summary>"1st", "2nd", "3rd", "4th".</summary>
    public static string Ordinal(int number) => number.ToString(CultureInfo.InvariantCulture) + (number % 100 is >= 11 and <= 13 ? "th" : (number % 10) switch
    {
        1 => "st",
        2 => "nd",
        3 => "rd",
        _ => "th",
    });
}
