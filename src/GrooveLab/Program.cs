using GrooveLab.Commands;

return CommandLine.Run(args);
