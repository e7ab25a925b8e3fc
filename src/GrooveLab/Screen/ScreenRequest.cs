namespace GrooveLab.Screen;

/// <summary>What the player asks of the program.</summary>
internal enum ScreenRequest
{
    /// <summary>Nothing.</summary>
    None,

    /// <summary>To end.</summary>
    Quit,

    /// <summary>To play another chart, <see cref="ScreenKeys.ChartToOpen"/>.</summary>
    Open,

    /// <summary>To play the same chart again, after its end.</summary>
    Again,
}
