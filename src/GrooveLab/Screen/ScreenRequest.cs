namespace GrooveLab.Screen;

/// <summary>What the player requests from the program.</summary>
internal enum ScreenRequest
{
    /// <summary>Nothing.</summary>
    None,

    /// <summary>End the program.</summary>
    Quit,

    /// <summary>Play another chart, <see cref="ScreenKeys.ChartToOpen"/>.</summary>
    Open,

    /// <summary>Play again after the end, with all changes.</summary>
    Again,
}
